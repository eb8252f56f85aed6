"""The live page: one local page on which every change solves the year again."""
