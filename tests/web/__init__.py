"""Helpers of the board's tests."""
