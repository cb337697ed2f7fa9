"""Photographs of discs drawn by a fifth code, to measure on: no net may learn from them."""
