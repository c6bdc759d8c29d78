"""The numerical core: rows of layers to cells, and the implicit march of their water through time.

It knows nothing of bakeries: only dry masses, isotherm tables, resistances, a gas space, a film and air.
"""
