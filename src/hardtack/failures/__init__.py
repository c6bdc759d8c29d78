"""Ways of failing, one file each and one shape: a history in, the share of life used over time out.

A texture limit is a moisture limit. It is stated as an activity at a temperature, and turned to moisture once,
at that temperature; the history is then judged on moisture.
"""
