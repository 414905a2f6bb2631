"""Questions about notices, mails and what there is to tell."""
