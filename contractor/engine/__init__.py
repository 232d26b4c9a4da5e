"""Compute what the trade asks for: pure functions over plain values, no clock, no I/O."""
