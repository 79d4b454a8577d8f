import { BudgetLine } from '../answers.js'
import { listOf } from '../named-shapes.js'
import { choice, plainOut } from '../plain-values.js'

export const Conformity = choice(['conforms', 'does-not-conform', 'not-proven'], {
  description: 'From the probability, with 95 % as the level of proof.',
})
export const probability = plainOut('Probability that it holds, 0 to 1.')
export const budget = listOf(
  BudgetLine,
  100,
  'What the uncertainty of the main result comes from, largest first.',
)
