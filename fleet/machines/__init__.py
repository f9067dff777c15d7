"""Machines and attachments: entered, mounted, tagged out, retired."""
