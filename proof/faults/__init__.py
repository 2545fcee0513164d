"""Seeded faults: mistakes put into clean programs, held against a slow replay of its own and against the examination."""
