"""Colour, a module for each thing that can be asked of it; CIELAB is for D65 unless it says so.

``spaces`` linear light, sRGB, XYZ, CIELAB; ``oklab``; ``difference`` CIEDE2000, CMC and luminance
ratios; ``grades`` of the grey scale; ``bands`` dark, medium and light; ``brightness`` lightness
that counts saturation; ``naming`` and ``families`` words; ``parse`` colours as CSS writes them;
``charts`` published values; ``viewing`` cloth as seen from a distance.
"""
