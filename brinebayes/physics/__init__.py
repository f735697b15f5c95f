"""What a softener does to water, salt and pressure: SI floats in and out, no imports beyond math.

Trade units meet SI in `units` and nowhere else; every other name ends in its SI unit. Pressures
are gauge pressures unless a name says otherwise, temperatures kelvin, hardness and exchange
capacity kg of CaCO3.
"""
