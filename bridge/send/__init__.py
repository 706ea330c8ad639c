"""Events -> MIDI and OSC, and commands that come in by OSC: pure encoding, thin ports around it."""
