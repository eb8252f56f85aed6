"""Diagrams of states: psychrometric, pressure-enthalpy, unit."""
