"""Frames to notes and inflections: slots, gestures, the third. Pure."""
