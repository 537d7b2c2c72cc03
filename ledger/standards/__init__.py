"""
Tables of the trade with their sources: fasteners, clearance holes, processes, materials, revision letters.

Each table is a TOML file beside its module, read at first use. Every row names its source; what is from
memory or common practice says so, and a vendor's own figures come before all of them.
"""
