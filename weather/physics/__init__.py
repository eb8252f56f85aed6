"""Moist air and sunshine."""
