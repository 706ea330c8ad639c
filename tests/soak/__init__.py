"""Hours of playing: does memory stay flat, does time run true, does nothing get lost?"""
