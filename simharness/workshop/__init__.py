"""The finished antenna: what caliper and rule read on it, what it does now, and what can still be done."""
