-- Guests: the one room and the end that a code gives to the phone that joins by it. Events: what their sentence was
-- made of, so that it can be said in another language.
ALTER TABLE code ADD COLUMN room TEXT;
ALTER TABLE code ADD COLUMN until INTEGER;
ALTER TABLE device ADD COLUMN room TEXT;
ALTER TABLE event ADD COLUMN told TEXT;
