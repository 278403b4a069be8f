"""The ground floor of dyecast: colour, geometry, units, errors and the values that travel between stages."""
