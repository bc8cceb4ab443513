"""On the test stand: the card before a test, the overlay after it, and what a cold flow says of the areas."""
