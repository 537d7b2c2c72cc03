"""
The job as text: what is meant, as a TOML file that is edited in any editor, and read again.

Signatures, keys, locks, the history of readings, orders and what came back are not in it (`LEFT_OUT` of
`ledger.job_text.kinds` says of every act why).
"""
