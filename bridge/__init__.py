"""reedwire: a low-latency bridge from a harmonica to MIDI and OSC.

The folders are read in the order of the signal: ``base``, ``capture``, ``follow``, ``harp``, ``quantise``, ``send``,
``study``, ``takes``, ``web``, ``wiring``, ``cli``. A file imports its own folder or an earlier one.
"""

import os

# The arrays here are small: more threads of a linear algebra library only spin beside the sound's own, and halve the
# speed of a busy machine. Read by the library when numpy is first imported; what the user has set stays.
for _threads in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    os.environ.setdefault(_threads, "1")

__version__ = "0.1.0"
