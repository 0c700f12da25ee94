"""Planar surfaces and the rooms they enclose."""
