"""What a harmonica is: keys, layouts, positions, bends, and which reed a pitch is most likely from. Pure."""
