-- Console sessions, PINs of people who share a device, and who of them did what.

-- CreateTable
CREATE TABLE "member_pin" (
    "org_id" UUID NOT NULL,
    "member_id" UUID NOT NULL,
    "salt" BYTEA NOT NULL,
    "pin_hash" BYTEA NOT NULL,
    "failures" INTEGER NOT NULL,
    "locked_until" TIMESTAMPTZ(6),
    "set_at" TIMESTAMPTZ(6) NOT NULL,

    CONSTRAINT "member_pin_pkey" PRIMARY KEY ("org_id","member_id")
);

-- CreateTable
CREATE TABLE "console_session" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "key_id" UUID,
    "secret_hash" BYTEA NOT NULL,
    "shared" BOOLEAN NOT NULL,
    "member_id" UUID,
    "signed_in_at" TIMESTAMPTZ(6),
    "failures" INTEGER NOT NULL,
    "locked_until" TIMESTAMPTZ(6),
    "created_at" TIMESTAMPTZ(6) NOT NULL,
    "expires_at" TIMESTAMPTZ(6) NOT NULL,
    "last_used_at" TIMESTAMPTZ(6) NOT NULL,
    "ended_at" TIMESTAMPTZ(6),

    CONSTRAINT "console_session_pkey" PRIMARY KEY ("org_id","id")
);

-- AlterTable
ALTER TABLE "audit_event" ADD COLUMN "member_id" UUID;

-- CreateIndex
CREATE UNIQUE INDEX "console_session_org_id_secret_hash_key" ON "console_session"("org_id", "secret_hash");

-- AddForeignKey
ALTER TABLE "member_pin" ADD CONSTRAINT "member_pin_org_id_member_id_fkey" FOREIGN KEY ("org_id", "member_id") REFERENCES "member"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "console_session" ADD CONSTRAINT "console_session_org_id_key_id_fkey" FOREIGN KEY ("org_id", "key_id") REFERENCES "access_key"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- AddForeignKey
ALTER TABLE "console_session" ADD CONSTRAINT "console_session_org_id_member_id_fkey" FOREIGN KEY ("org_id", "member_id") REFERENCES "member"("org_id", "id") ON DELETE CASCADE ON UPDATE NO ACTION;

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "member_pin" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "member_pin" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "member_pin" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "member_pin" TO coolback_app;
ALTER TABLE "console_session" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "console_session" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "console_session" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "console_session" TO coolback_app;
