import { join } from 'node:path'
import { describe, expect, test } from 'vitest'
import { documentedFunctions } from '../../tools/docstrings.js'
import { pages, root } from '../support/markdown.js'

const SAID = /([A-Za-zα-ωΑ-Ω])\S{0,3}(?= = |: |, [a-zA-Z]: | the | and [A-Z] )/g
const ARTICLE_OR_UNIT = /\ba (?!the |is |are |and |of |from )(?=[a-z]{2})|km\/h|Z-score/g
/** A letter that stands alone, with the marks and the subscript that it may carry. */
const SIGN = /(?<![A-Za-zα-ωΑ-Ω_°`])([A-Za-zα-ωΑ-Ω][̃̄̂′']*)(_\w+|[₀-₉ᵢⱼₖₙₘₒₛₜₓₐ]+)?(?![\wα-ωΑ-Ω′])/g

/** Letters that mean the same in all formulas, from the table of signs. */
const common = new Set(
  [
    ...pages
      .get('docs/nomenclature.md')!
      .split('## Signs')[1]!
      .matchAll(/^\| ([^|]+) \|/gm),
  ].flatMap(([, cell]) => cell!.split(',').map((sign) => sign.trim()[0]!)),
)

/** Letters of the formula, without what they carry: `u_x` and `uᵢ` are kinds of u. */
const lettersIn = (text: string) =>
  new Set([...text.replaceAll(ARTICLE_OR_UNIT, '').matchAll(SIGN)].map(([, letter]) => letter![0]!))

describe('the formulas', () => {
  test('the table of signs has the usual ones', () => {
    for (const sign of 'uUΣΠPΦ') expect(common).toContain(sign)
  })

  for (const { name, formula, text, inputs, result, file } of documentedFunctions(
    join(root, 'src/domain'),
    root,
  )) {
    if (formula.length === 0) continue
    test(`every sign in the formula of ${name} (${file}) is explained beside it`, () => {
      const lines = formula.join('\n')
      const prose = text.split('\n').filter((line) => !/^ {4}/.test(line))
      const explained = lettersIn([...prose, ...inputs, result ?? ''].join('\n'))
      // Said in the formula itself: `F, A: sum over`, `H = ...`, `e the error`.
      const within = [...lines.matchAll(SAID)].map(([, letter]) => letter!)
      const unknown = [...lettersIn(lines)].filter(
        (letter) => !explained.has(letter) && !common.has(letter) && !within.includes(letter),
      )
      expect(unknown).toEqual([])
    })
  }
})
