"""The pages of a bay for a browser: a server that hears the bay by MQTT as any display does.

    broker ─▶ feed ─▶ stream ─▶ page      what every bay of the broker says, to the wall
    broker ◀─▶ tabs ◀─▶ page              the walk through an inspection, one for each page that is open
    records ─▶ reads ─▶ page              what was found before

`app` puts them together, behind `doors`; whatever knows how to read records is handed to it.
"""
