"""Blocks of samples to pitch frames: level, articulation, pitch, clean, bright. Pure: no thread, clock, file, device."""
