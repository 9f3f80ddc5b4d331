"""Advisor: find, prove and repair the cause of a misbehaving steering or position sensor on an off-road machine."""
