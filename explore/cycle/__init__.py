"""The order of the components around the working fluid, at the rated point and away from it."""
