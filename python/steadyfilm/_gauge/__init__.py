"""Parts of ``measurability``: the file of a study, what its windows ask of the gauge, and the words."""
