"""Compiling, and root finding in compiled code."""
