"""Tests of the follower."""
