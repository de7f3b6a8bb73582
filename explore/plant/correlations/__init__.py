"""Published correlations of heat transfer and pressure drop, one function each, on arrays.

Every correlation has its range in :mod:`explore.plant.correlations.validity`; a design outside it is told so.
"""
