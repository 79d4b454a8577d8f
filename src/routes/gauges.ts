import { RULES_CAUTION } from '../border/drive-paths.js'
import { gaugeErrorOut } from '../border/gauge-error.js'
import { RULE_ROWS } from '../border/gauges.js'
import { GaugeErrorAnswer, GaugeErrorRequest, RuleList } from '../schemas/gauges.js'
import { ref } from '../schemas/measures.js'
import { calculationProblems, problems } from '../schemas/problems.js'
import type { App, RouteOptions } from './options.js'

const tags = ['gauges']

export function gaugeRoutes(app: App, { sizeTable }: RouteOptions): void {
  app.get(
    '/v1/gauges/rules',
    {
      schema: {
        operationId: 'listRules',
        summary: 'Rules on accuracy',
        description:
          'Every rule that a request can name: its limits, its speeds, where it is in force, and how well its text is known.',
        tags,
        response: { 200: ref(RuleList), ...problems(400) },
      },
    },
    () => ({ rules: [...RULE_ROWS], caution: RULES_CAUTION.text }),
  )

  app.post(
    '/v1/gauges/error',
    {
      schema: {
        operationId: 'computeGaugeError',
        summary: 'Error of a speedometer',
        description:
          'From the tires fitted and those it was right with, or from the ratio of the drive: what the dial reads at each true speed, and the verdict of each rule.',
        tags,
        body: ref(GaugeErrorRequest),
        response: { 200: ref(GaugeErrorAnswer), ...calculationProblems() },
      },
    },
    (request) => gaugeErrorOut(request.body, sizeTable),
  )
}
