"""Tests, a package for each of wbplan's; one thread each, since pytest-xdist fills the cores."""

import os

for each in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
    os.environ.setdefault(each, "1")  # read when numpy is loaded, which is later than this
