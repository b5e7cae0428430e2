"""
The invented Northmere Radiation Network: a physical model of two stations that do not exist.

`scenario` holds all constants; `sky` makes weather and light, `instruments` turns light into
volts, `logger` into rows of a table, `tables` into text; `station` puts them together. Nothing
here uses the project's own physics, so that the one can be tested against the other.
"""
