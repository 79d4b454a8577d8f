import { speaksForAll } from '../processes/speaks-for-all.js'
import { startService } from '../server.js'
import { type Command, words } from './command.js'
import { settingsOf } from './settings.js'

export const serve: Command = {
  summary: 'runs the service',
  usage: (call) => `Runs the service until SIGTERM, SIGINT or SIGHUP.
Settings are environment variables: docs/settings.md.

  ${call()}`,
  async run(args, surroundings) {
    words(args, 0)
    const warn = speaksForAll() ? surroundings.warn : () => {}
    await startService(settingsOf({ ...surroundings, warn }), surroundings.callOf)
    return undefined
  },
}
