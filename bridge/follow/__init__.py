"""Blocks of samples to pitch frames: level, articulation, pitch, clean and bright. Pure: no thread, clock or file."""
