"""Compiled kernels of the shelf engine: plain arrays in, plain arrays out."""
