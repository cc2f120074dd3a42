"""From numbers to the three lines: path, power, size; and every sentence about them."""
