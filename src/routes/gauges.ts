import { encoder } from '../codec/encoder.js'
import { reading } from '../codec/request.js'
import { dialErrorIsHeavy, knownDial } from '../domain/gauges/dial-error.js'
import { ruleTable } from '../domain/gauges/rule-table.js'
import { GaugeErrorAnswer, GaugeErrorRequest, RuleList } from '../schemas/gauges.js'

import { ref } from '../schemas/named-shapes.js'
import { SEARCH } from '../schemas/rate-weights.js'
import { calculationSchema } from './calculation.js'
import { dialErrorAnswer } from './dial-error.js'
import { inThread } from './in-thread.js'

import type { App, RouteOptions } from './options.js'

const tag = 'gauges'

const ruleList = encoder(RuleList)
const dialOf = reading({ body: GaugeErrorRequest, compute: knownDial })

export function gaugeRoutes(app: App, options: RouteOptions): void {
  app.get(
    '/v1/gauges/rules',
    {
      schema: {
        operationId: 'listRules',
        summary: 'Rules on accuracy',
        description:
          'Every rule that a request can name: its limits, its speeds, where it is in force, and how well its text is known.',
        tags: [tag],
        response: { 200: ref(RuleList) },
      },
    },
    () => ruleList(ruleTable(), {}),
  )

  app.post(
    '/v1/gauges/error',
    {
      schema: calculationSchema({
        id: 'computeGaugeError',
        weight: SEARCH,
        summary: 'Error of a speedometer',
        description:
          'From the tires fitted and those it was right with, or from the ratio of the drive: what the dial reads at each true speed, and the verdict of each rule.',
        tag,
        body: GaugeErrorRequest,
        answer: GaugeErrorAnswer,
        errors: [503],
      }),
    },
    ({ body }, reply) => {
      const dial = knownDial(dialOf(body), options.sizeTable)
      return dialErrorIsHeavy(dial) ? inThread(reply, options, 'dialError', dial) : dialErrorAnswer(dial)
    },
  )
}
