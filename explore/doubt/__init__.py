"""How sure: the same designs under thousands of plausible worlds, each with other values of what is assumed."""
