"""Setups: which states the unit may be in, and the cheapest safe way from one to another.

    states      a state of the unit, all states in one numbering, conditions on them
    invariants  what must never be, and which states keep it
    moves       what one move does to a state, and what it costs in whole numbers
    unknown     what a state that nobody has looked at may really be; which states can come about
    routes      the cheapest safe route for every state and every need, made once per model

Routes come only from here, so that no caller can skip a move.
"""
