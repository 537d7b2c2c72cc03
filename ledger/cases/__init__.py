"""
What rules look at: parts and connections laid out at the revisions that count, with what is worked out of them once.

Cases know shapes and fits; the rules about them are in `checks`, which revision counts is for `judge`.
"""
