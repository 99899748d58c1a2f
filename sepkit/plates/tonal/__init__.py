"""Gradients, paintings and photographs: inks chosen for what they make together, and screens that a press holds.

Doors: ``screens.tonal_screens`` from a picture and a bench to the screens that print it.
"""
