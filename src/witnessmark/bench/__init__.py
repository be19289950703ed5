"""The program's own figures: each module here measures one part of it.

A module registers figures with `@figure(...)`; `witnessmark bench [NAME]` finds, runs and prints them.
"""
