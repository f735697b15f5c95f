"""The command line: thin shells. This file is run before anything else is imported.

What is set here holds for the whole process, and must be set before numpy and typer are imported.
"""

import atexit
import gc
import os

# Our matrices are small: threads cost more than they bring, most of all on a busy machine, and the
# order in which they add would not be the same every time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Nearly all that an answer makes is needed to its end. To look for garbage among it every few
# hundred objects finds none and takes a tenth of the time, and so does to look through it all once
# more on the way out. A long visit is still looked through now and then.
gc.set_threshold(100_000, *gc.get_threshold()[1:])
atexit.register(gc.freeze)
