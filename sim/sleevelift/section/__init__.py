"""The valve as a half-section in numbers: stations along the axis, outlines of parts and fluids, coils. Draws nothing.

Case -> stack_of (radii, stations, what was assumed) -> outlines (polygons), coil_centres (cut wires)
"""
