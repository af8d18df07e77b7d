"""Colour: reflectance, CIELAB and the screen; photos beside a chart."""
