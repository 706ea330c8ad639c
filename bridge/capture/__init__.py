"""Microphone, sound file or rehearsal tone -> blocks of samples."""
