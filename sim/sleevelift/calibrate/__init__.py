"""A case is fitted to what was measured: values with intervals, what the data cannot tell apart, what no value explains."""
