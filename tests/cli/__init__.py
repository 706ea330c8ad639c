"""Tests of what is sent."""
