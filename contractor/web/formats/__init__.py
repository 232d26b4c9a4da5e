"""How each language writes days and numbers, where Django's own way differs from ours.

A day is "2 Mar 2027" in English and as near to it as the language allows.
"""
