"""Invented cooks, for whoever has no logs: a simple physics of bags, ovens, sensors and links, in every kind of trouble.

Nothing here was measured, and nothing here is known to what decides: the two share the units alone. Every log says in
the line that ends a cook that it is invented.
"""
