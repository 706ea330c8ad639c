"""Sounds whose pitch is known: sampled harmonica, the rehearsal, and what rooms and amplifiers do to them."""
