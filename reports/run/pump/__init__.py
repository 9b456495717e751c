"""The page of a pump: head, flow and suction, where that of a turbine has jets, power and trip.

It shares facts, front, ruler, tables and folds with the page of a turbine, and has its own first
screen, its own chart of head against flow, and its own words.
"""
