"""Sewing → figures: counts, thread, time, price, and the plan's own inspection, from needle points alone."""
