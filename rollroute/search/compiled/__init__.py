"""The compiled engine for large maps: the same answers as ``search.simple``, in kernels that numba compiles once and keeps."""
