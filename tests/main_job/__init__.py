"""The main job from end to end: sound in; notes, bends and files out, through the real commands."""
