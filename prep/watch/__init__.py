"""Floor 9. The gate on a shared folder: what has settled is judged once, beside the file and never in it.

What lives here: the scan of the folder, settling, claims, the ledger of verdicts, worker processes, the board's page.
What may be imported: every floor below; watchdog, only as a hint to look sooner.
What must not come in: anything that writes to a file somebody dropped, or that a check or a build should know.
"""
