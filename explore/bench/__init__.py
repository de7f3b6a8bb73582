"""From a design to what a builder cuts, drills and weighs: geometry, forces and lists, from evaluated figures."""
