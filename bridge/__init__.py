"""reedwire: a low-latency bridge from a harmonica to MIDI and OSC.

The folders are read in the order of the signal: ``base``, ``capture``, ``follow``, ``harp``, ``quantise``, ``send``,
``study``, ``takes``, ``web``, ``wiring``, ``cli``. A file imports its own folder or an earlier one.
"""

__version__ = "0.1.0"
