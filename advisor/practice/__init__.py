"""Simulated machines: to measure ways of searching on the same hidden faults, and to practise on."""
