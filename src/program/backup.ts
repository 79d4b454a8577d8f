import { backupDatabase } from '../db/sqlite/backup.js'
import { noteBackup } from '../db/sqlite/health.js'
import { type Command, wordOf } from './command.js'
import { printReport } from './file-report.js'
import { settingsOf } from './settings.js'

export const backup: Command = {
  summary: 'copies the database while the service runs, and verifies the copy',
  usage: (call) => `Copies the database in DATABASE_FILE while the service runs, and verifies
the copy. It never writes over a file.

  ${call('FILE')}`,
  async run(args, surroundings) {
    const file = wordOf('FILE', args)
    const { databaseFile } = settingsOf(surroundings)
    const report = backupDatabase(databaseFile, file)
    try {
      noteBackup(databaseFile, surroundings.clock())
    } catch (error) {
      // The backup is valid even if it cannot be recorded in the database, for example because the disk is full.
      surroundings.warn(
        `not noted in ${databaseFile}, so that its metrics show an older backup: ${(error as Error).message}`,
      )
    }
    const done = `backup in ${report.file}, verified; its SHA-256 in ${report.file}.sha256`
    printReport(surroundings, done, report)
    return 0
  },
}
