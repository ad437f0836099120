"""How the tool reasons: deductions, belief, the next question, the plan, and the reasons for each."""
