"""Deduction: facts and compiled rules to fired rules with their premises. The only package that knows the rule engine."""
