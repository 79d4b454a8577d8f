import { RULES_CAUTION } from '../border/drive-paths.js'
import { RULE_ROWS } from '../border/gauges.js'
import { RuleList } from '../schemas/gauges.js'
import { ref } from '../schemas/measures.js'
import { problems } from '../schemas/problems.js'
import type { App } from './options.js'

const tags = ['gauges']

export function gaugeRoutes(app: App): void {
  app.get(
    '/v1/gauges/rules',
    {
      schema: {
        operationId: 'listRules',
        summary: 'Rules on accuracy',
        description:
          'Every rule of the table: its bounds, its speeds, where it holds, and how well its text is known.',
        tags,
        response: { 200: ref(RuleList), ...problems(400) },
      },
    },
    () => ({ rules: [...RULE_ROWS], caution: RULES_CAUTION.text }),
  )
}
