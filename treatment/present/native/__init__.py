"""The native window: what is chosen, what is to be seen, and a thin layer that paints it."""
