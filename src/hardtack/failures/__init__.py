"""Ways of failing, one file each and one shape: a history in, the share of life used over time out.

A texture limit is a moisture limit. It is stated as an activity at a temperature, and turned to moisture
once, at that temperature; the history is then judged on moisture (crispness, crust, sogginess, drying out).

Cumulative failures add up a rate over the history (firming, mould, fermentation, rancidity, glassy sugar,
colour); checking is an index. Gates (growth, food code, toxins, preservatives, yeasts) are no failures: they
say where the product stands and who confirms. Pairs warn of remedies that help one failure and hurt another.
"""
